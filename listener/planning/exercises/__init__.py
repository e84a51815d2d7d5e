"""What a passage drills, one file for each exercise; :mod:`listener.planning.exercises.registry` lists them."""
