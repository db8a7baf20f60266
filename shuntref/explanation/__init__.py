"""Why the speed changed: the account in numbers (``account``), its rule (``ruling``) and its words (``words``)."""
