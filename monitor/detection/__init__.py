"""What the curve shows that nobody logged: falls of the paste's temperature, and what made them."""
