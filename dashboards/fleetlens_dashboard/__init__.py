"""What the pages share: the record in use, the choices in the address, and the drawing of findings.

`app.py` is the router and the frame around the pages. A page is three steps: widgets (`choices`), one call to
`findings` or `advice` (through `record.answer`), drawing (`show`, `tables`). Nothing is computed here and no SQL is
written here. The page that brings files in has helpers of its own: `uploads`, `column_maps`, `selectors`, `loading`.

Streamlit puts the folder of `app.py` on the import path, so this package has a name of its own. It also reads
`.streamlit/config.toml` beside `app.py`, whatever folder it is started from: theme, loopback address and no usage
statistics stand there.

Text that comes from a workshop or an address is shown by `st.text`, in a data frame or as an option of a select box,
never by what reads Markdown.
"""
