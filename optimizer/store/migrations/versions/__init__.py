"""One file per step, oldest first. A step that was released is never changed."""
