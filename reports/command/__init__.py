"""The whatstays command: one file a subcommand; what a command needs is imported when it runs.

Exit status 0 done, 2 the input, 3 no answer to give, 4 our fault.
"""
