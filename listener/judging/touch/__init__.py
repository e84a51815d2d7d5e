"""How a chord was touched, beside whether it was right: held or let go, who stood out, quiet or loud, evenly or not."""
