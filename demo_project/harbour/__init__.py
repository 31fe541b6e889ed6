"""Props of the invented harbour town of Quillhaven, built from numbers: shapes, layouts, paint, exports."""
