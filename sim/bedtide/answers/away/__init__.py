"""Will it last with nobody to water."""
