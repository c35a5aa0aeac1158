"""The joint least-squares adjustment over card, lens, shaft and rims."""
