/** Layout 9: the model of each zone of a source, learnt from heat-ups. */
export const zoneModelsLayout = `
CREATE TABLE zone_model (
  source TEXT NOT NULL,
  zone INTEGER NOT NULL,
  saved_ms REAL NOT NULL,
  payload TEXT NOT NULL,
  PRIMARY KEY (source, zone)
) STRICT;
`;
