"""Progress and vocabulary as pictures: in the terminal and on a page of HTML."""
