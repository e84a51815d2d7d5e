"""From a drill to a route: which shapes on the neck fulfil its wishes, and the best way through them."""
