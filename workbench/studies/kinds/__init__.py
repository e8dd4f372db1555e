"""The studies, one file each: a record of what `study.Study` asks for; what they compute stands in `studies` itself."""
