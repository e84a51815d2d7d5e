"""What is kept: takes, verdicts and progress over weeks."""
