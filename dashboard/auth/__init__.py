"""Who may ask what: the key, paired phones, view-only links, host names, certificates, and what Set-up ticks."""
