"""Nothing is lost: damage is noticed, mended or set aside, takes are rescued, and a history can be made again."""
