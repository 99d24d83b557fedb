"""What: every combination of aids per axle group, kept or rejected by coded rules."""
