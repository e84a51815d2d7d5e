"""What was kept: rejudge, progress, export, import, students."""
