/** Layout 18: what a user did about a blob on its way to the winder, and who. `cutOut`: that strand was never wound. */
export const decisionsLayout = `
ALTER TABLE stated_section ADD COLUMN decision TEXT;
ALTER TABLE stated_section ADD COLUMN who TEXT;
`;
