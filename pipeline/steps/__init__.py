"""The steps between deliveries and reports, each a door between the warehouse and one package."""
