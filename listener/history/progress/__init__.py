"""How it went over the weeks, as numbers, periods, trends and plain sentences."""
