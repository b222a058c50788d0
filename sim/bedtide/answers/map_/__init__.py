"""bedtide map: beds over a region, place by place."""
