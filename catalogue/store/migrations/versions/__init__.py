"""One file a revision; a revision that has been released is never changed."""
