"""Drills and takes handed from one person to another: the open bundle, described in ``docs/bundle.md``.

A bundle comes from a stranger until it has been read: everything is checked, and all of it before anything is written.
"""
