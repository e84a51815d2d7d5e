"""One sitting: clock and click, the practice loop, what the player asks for with a key."""
