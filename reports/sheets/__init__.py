"""A component's sheet: what stands on it (content), and how it is laid out as a web page (html) and for print (pdf).

The words arrive ready made; this room only places them, and refuses a sheet without cautions or without its maker.
"""
