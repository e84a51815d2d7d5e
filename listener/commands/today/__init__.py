"""``widehand today``: what to practise with the minutes there are, and playing it."""
