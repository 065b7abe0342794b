/** The program's version as printed in reports; a test keeps it the same as package.json's. */
export const VERSION = '0.1.0'
