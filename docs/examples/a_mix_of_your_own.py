"""What a pot of mix on the kitchen bench says about the bed.

Soak a straight-sided pot of mix, let it drain for an hour and measure what ran out: that is the air
after draining. Weigh it wet and dry for the pores in all.
"""

from bedtide.mix import fit_bench, mean_water_content, water_content

mix = fit_bench(height=0.20, total_porosity=0.85, air_after_draining=0.22, like="potting mix")

in_pot = mix.theta_s - mean_water_content(0.20, mix)
print(f"air in the drained pot: {in_pot:.0%}")
for above in (0.10, 0.20, 0.30, 0.40):
    air = mix.theta_s - water_content(above, mix)
    print(f"air {100 * above:.0f} cm above the water, at rest: {air:.0%}")
