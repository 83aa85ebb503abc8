"""Pages for people without other software: the same services and stores as the JSON, shown as HTML.

Another room adds a page with ``shell.PageRouter`` and ``shell.page``, and a place in the menu with ``navigation.add``.
"""
