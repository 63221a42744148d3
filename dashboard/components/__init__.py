"""What pages share: parts and tags, the shell, charts drawn after the first paint, times in the viewer's zone, senders."""
