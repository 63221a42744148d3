"""The process behind the pages: HTTP, compressed files, the name on the network, less rights."""
