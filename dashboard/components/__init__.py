"""What pages share: parts and tags, the shell, charts drawn after the first paint, the viewer's zone, senders."""
