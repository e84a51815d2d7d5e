"""What a passage drills, one file for each exercise; :mod:`listener.drill.exercises.registry` lists them."""
