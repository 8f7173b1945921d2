"""One file = one outbound standard: FHIR bundle, DICOM objects, case bag, tidy tables."""
