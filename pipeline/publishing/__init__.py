"""Pages from their .qmd source: woven once into Markdown, then drawn as HTML, PDF and DOCX."""
