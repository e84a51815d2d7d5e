"""What is asked: drill files and their exercises, read into passages of wishes. How they are answered is planning."""
