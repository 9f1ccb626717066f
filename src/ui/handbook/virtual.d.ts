declare module 'virtual:handbook' {
  export const pages: readonly {
    readonly id: string;
    readonly title: string;
    readonly html: string;
  }[];
}
