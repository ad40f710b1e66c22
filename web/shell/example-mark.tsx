/** Marks an example run. @param explained also say in words what it is */
export function ExampleMark({ explained = false }: { explained?: boolean }) {
  return (
    <span class="example">
      {' '}
      <span class="example-mark">Example</span>
      {explained && <span class="fine"> simulated, only to look at</span>}
    </span>
  );
}
