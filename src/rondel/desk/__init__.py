"""The desk: a local web app over the same use cases as the command line.

`server` starts it, `guard` keeps strangers out, `desk` holds what is open, `leaves/` answer for one
leaf of the book each, `templates/` and `static/` are what is seen. No rule of the craft and no plan
is worked out here.
"""
