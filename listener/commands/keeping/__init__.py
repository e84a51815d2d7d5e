"""Commands for what was kept: rejudge, progress, export, import, students."""
