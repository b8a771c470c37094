"""All sheets and the page that lists them, written as a folder of files that works from any disk or server."""
