"""Practice sheets on paper: engraved staff and tab, neck diagrams, lines and pages."""
