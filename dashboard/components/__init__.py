"""What pages share: charts drawn after the first paint, times in the viewer's zone, buttons that send."""
