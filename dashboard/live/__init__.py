"""What the pages say of cooks, without a line of HTML: the look of one, what is new in it, its course, its replay."""
