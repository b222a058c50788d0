"""The one way of showing: words, tables, pictures, options, a folder of results."""
