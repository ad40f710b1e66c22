/** Layout 20: how far the daily check of a part of the record has got, as JSON. */
export const rollingCheckLayout = `
CREATE TABLE rolling_check (
  one INTEGER PRIMARY KEY CHECK (one = 1),
  payload TEXT NOT NULL
) STRICT;
`;
