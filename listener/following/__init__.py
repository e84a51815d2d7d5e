"""Which step of a drill is being played, and which chord governs where there is no drill. Pure."""
