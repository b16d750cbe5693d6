"""What every room needs: the one error, flags, formulas, elements, sources, whole files, markup."""
