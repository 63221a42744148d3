"""Who may ask what: the key, paired phones, links that only let look, host names, certificates, and what Set-up ticks."""
