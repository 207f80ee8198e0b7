/** A picture that a pure function of `views/` made; it escapes every name that it holds. */
export function Markup(props: { readonly svg: string; readonly class?: string }) {
  return <span class={props.class ?? 'picture'} dangerouslySetInnerHTML={{ __html: props.svg }} />;
}
