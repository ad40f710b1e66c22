/** Layout 21: the fields of a preparation, as JSON: numbers in the unit of the field, words, true and false. */
export const preparationLayout = `
ALTER TABLE lot ADD COLUMN fields TEXT NOT NULL DEFAULT '{}';
`;
