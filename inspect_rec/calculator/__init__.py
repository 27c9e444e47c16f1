"""The calculator: every computation by its name, from values typed by hand or a file of cases.

One file a topic, one function a computation; ``base`` has their register. No I/O.
"""
