/** Layout 9: what the heat-ups of each source's zones have taught. */
export const zoneModelsLayout = `
CREATE TABLE zone_model (
  source TEXT NOT NULL,
  zone INTEGER NOT NULL,
  saved_ms REAL NOT NULL,
  payload TEXT NOT NULL,
  PRIMARY KEY (source, zone)
) STRICT;
`;
