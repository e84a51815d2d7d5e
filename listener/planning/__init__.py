"""From a drill to a route: what to practise, which voicings fulfil it, and the best way through them."""
