"""Makers of the pages in ``docs`` and of the pictures in the README; a test says when one has to be made again."""
