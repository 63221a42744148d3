"""One module a command: HELP, add_arguments(parser), run(args) -> exit status.

What is heavy is imported inside ``run``, so that ``--help`` answers at once.
"""
