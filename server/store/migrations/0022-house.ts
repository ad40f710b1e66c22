import { HOUSE_CODE_LETTERS } from '../../entities/house.ts';

const letter = `substr('${HOUSE_CODE_LETTERS}', 1 + (random() & 0xffffff) % ${HOUSE_CODE_LETTERS.length}, 1)`;

/**
 * Layout 22: the code of this house, made at random at the first start, and for each run from another house the code of that
 * house and its number there. Both NULL = made here, under its own id; a house that is NULL with a number = it came back.
 */
export const houseLayout = `
CREATE TABLE house (
  one INTEGER PRIMARY KEY CHECK (one = 1),
  code TEXT NOT NULL
) STRICT;
INSERT INTO house VALUES (1, ${letter} || ${letter} || ${letter});
ALTER TABLE run ADD COLUMN house TEXT;
ALTER TABLE run ADD COLUMN house_run INTEGER;
`;
