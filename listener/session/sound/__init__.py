"""What the program makes heard: the click, a bass to play over, a chord that was asked for."""
