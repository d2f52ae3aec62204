"""From mean effective pressure to tractive effort at the rail."""
