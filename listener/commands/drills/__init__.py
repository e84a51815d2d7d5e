"""``widehand drills``: list, show, check, make, keep."""
