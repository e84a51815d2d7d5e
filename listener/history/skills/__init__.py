"""What a take says about each skill, and when that skill is due again."""
