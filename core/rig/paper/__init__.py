"""What leaves the program: report, build sheet, parts list, curves, exports."""
