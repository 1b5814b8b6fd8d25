"""The demonstration: invented people of the Fenmarsh Foot and Circulation Service, told by the services."""
