"""The pages that Dash carries: the one beside the cooker, and what stands where no page is.

Each has ``TITLE`` and ``layout``, which gives a ``parts.Page`` for every visit: once as plain HTML, once for Dash.
"""
