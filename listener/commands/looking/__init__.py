"""Commands that show something: plan, sheet, name."""
