"""The way from shape to shape: what each costs by itself, what a change costs, and the best way through all of them."""
