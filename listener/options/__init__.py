"""What each command can be asked on the command line, a file for each group of commands. No work is done here."""
