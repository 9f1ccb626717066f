/** Version of the program, as package.json has it. */
export const PROGRAM = '0.1.0';
