"""The commands: arguments in, one call, text or one JSON document out.

In: arguments of the shell. Out: standard output and error, files; status 0 done, 1 faulty records, 2 a wrong call.

What holds here: importing the commands loads no heavy library; problems are shown all at once; nothing is overwritten
without ``--force``.
"""
