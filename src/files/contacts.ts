/**
 * What a printed item may touch, and what that asks of whoever sells it. The rules are named from memory and differ by
 * country: whoever sells the item asks someone who knows those in force.
 */
export const CONTACTS = {
  food: {
    words: 'Food or mouth',
    duty: 'Ink, primer and blank must be declared fit for contact with food by their makers (in the EU under Regulation (EC) No 1935/2004). Keep print off rims and insides, and keep the declarations with the job.',
  },
  toy: {
    words: 'Toy',
    duty: 'Toys are under rules of their own (in the EU the toy safety rules with EN 71, in the US ASTM F963): small parts, edges, and what may migrate from ink and blank. Have it tested before it is sold.',
  },
  skin: {
    words: 'Skin',
    duty: 'UV ink that is not fully cured sensitises skin. Print within the cure that the ink is declared for, do not hand it out the same hour, and ask the maker for a declaration on contact with skin.',
  },
} as const;
export type Contact = keyof typeof CONTACTS;
export const CONTACT_NAMES = Object.keys(CONTACTS) as readonly Contact[];
