"""A conditioner from its data sheet, asked for in the order that data sheets print."""
