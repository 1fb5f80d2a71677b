"""One page of pictures, from data to HTML text: no script, nothing from outside the file.

    html = document.page(content)

Every picture has a question, a sentence that answers it, the plot and, where it helps, its figures
as a table.  Plots are SVG made by hand (`markup`, `scale`, `plot`): a plotting library is 75 MB to
install, knows no CSS variables, by which one drawing serves light and dark screens and paper, and
the passage itself is engraved elsewhere anyhow.  All text goes through one place that escapes it
(`markup.tag`).  The page is HTML and at the same time well-formed XML, so that any XML parser can
check it.
"""
